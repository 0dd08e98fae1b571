"""The live page: the check of a bar on a page of the user's own machine, live while its keys are moved."""
