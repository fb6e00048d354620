"""Long work: processes, jobs, what is kept, and how numbers are typed and listed."""
