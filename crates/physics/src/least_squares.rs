//! General non-linear least squares, and whether its minimum is the right one.
