//! Assembly of the running whole.
