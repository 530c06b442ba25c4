//! What a real browser shows and prints: the page of `motefall explore`, who is answered there, and what a person sees who turns its
//! dials; bench sheets on paper.

mod explore {
    mod browser;
    mod guard;
    mod page;
    mod server;
    mod sheets;
}
