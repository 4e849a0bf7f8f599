"""Pictures of the real screens, as SVG: ``python -m tests.pictures [FOLDER]``. They stand in the README."""
