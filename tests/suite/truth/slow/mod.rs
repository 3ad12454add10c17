//! Tests that take seconds.

mod campaign;
mod causes;
mod cuts;
mod formats;
mod placing;
mod several;
mod work;
