"""The pages: every action is a link or a form that works without script."""
