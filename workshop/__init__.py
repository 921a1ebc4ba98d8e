"""The shop and its registers, and the project itself: settings, serving, clock, writing."""
