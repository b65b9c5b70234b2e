"""What the designer asks: study files, sweeps, stored results, maps and reports."""
