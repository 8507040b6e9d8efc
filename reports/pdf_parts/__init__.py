"""The parts of the PDF writer. Only this package and `reports.pdf` know the PDF libraries."""
