"""From parts to equations: which branches join which nodes, and the linear equations of every mode."""
