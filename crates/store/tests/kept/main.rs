//! What is kept, how long it stays, and what is found when somebody meddles with it: in a file.
//! The same tests run on a server in the suite `postgres`.

/// Each of these tests in a folder of its own.
macro_rules! both {
    ($($module:ident { $($name:ident)* })*) => {$(
        mod $module {
            $(
                #[tokio::test]
                async fn $name() {
                    crate::$module::$name(crate::engine::Engine::new()).await;
                }
            )*
        }
    )*};
}

mod apart;
mod basics;
mod both;
mod copied;
mod durable;
mod engine;
mod files;
mod first;
mod folder;
mod forms;
mod meddling;
mod meeting;
mod moving;
mod overview;
mod people;
mod sample;
mod sheets;
mod signed;
mod things;
