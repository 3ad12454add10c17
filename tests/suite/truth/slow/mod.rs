//! Tests that take seconds.

mod campaign;
mod causes;
mod cuts;
mod forms;
mod placing;
mod work;
