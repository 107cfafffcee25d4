//! Files that people write, read into values that can only be valid.
