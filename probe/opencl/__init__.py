"""Cards reached through OpenCL: the one place that launches kernels for real."""
