"""The only place that knows a screen: commands, their arguments, and how answers look."""
