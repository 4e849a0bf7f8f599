"""The page to share: one self-contained HTML file that tells before and after, or one session alone."""
