"""The report: one page that holds everything, made by `page`, from one check."""
