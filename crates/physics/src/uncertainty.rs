//! Uncertainty of a result: first order by JCGM 100, draws by JCGM 101.
