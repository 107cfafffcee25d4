//! A simulated pot, cook and rig for the demo and the tests. Shares no code with the judgement.
