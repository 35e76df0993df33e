"""What is written: summary, figures, report page, mesh file."""
