//! One integration binary: the program against the world outside, and against itself.

mod closed_form;
