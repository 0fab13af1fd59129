//! The screen.
//!
//! [`view::show`] is a pure function of [`Display`](crate::display::Display) and
//! [`Controls`](crate::display::Controls): it knows no window and no host, so that tests run it
//! without either. The window around it is [`App`].

mod app;
mod balance;
mod banner;
mod change;
mod closing;
pub mod compare;
mod deferred;
mod fonts;
pub mod glyph;
mod header;
mod hits;
pub mod layout;
mod leaks;
mod life;
mod listen;
mod notice;
mod panel;
mod parts;
mod readings;
mod reference;
mod scene;
mod song;
mod state;
mod strip;
mod text;
pub mod theme;
pub mod view;
pub mod views;
mod watch;
mod widgets;

pub use app::App;
pub use closing::{BruntEditor, create_joined};
