"""The commands: one small file each; main.py alone maps errors to exit codes."""
