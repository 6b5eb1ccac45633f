"""From today's stacks to another engagement speed."""
