//! The handbook: pure formulas, each with source, range and units. Knows nothing of pots or batches.
