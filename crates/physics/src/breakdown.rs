//! Breakdown statistics: Weibull, censored, and voltage raised in steps.
