//! Value in, bytes out. Knows neither where bytes go nor what time it is.

pub mod lines;
