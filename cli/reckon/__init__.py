"""The trade's single calculations, each as a command of `prepwright reckon`."""
