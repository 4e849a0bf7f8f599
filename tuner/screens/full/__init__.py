"""Full screens, by textual. Only the verbs that draw one import this room."""
