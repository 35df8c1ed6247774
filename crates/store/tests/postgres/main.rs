//! What is kept, how long it stays, and what is found when somebody meddles with it: on a server.
//! Most of it are the tests of `kept`, each in a schema of its own on one server that ends with
//! these tests.

/// Each of these tests on the server.
macro_rules! both {
    ($($module:ident { $($name:ident)* })*) => {$(
        mod $module {
            $(
                #[tokio::test]
                #[ignore = "needs PostgreSQL"]
                async fn $name() {
                    crate::$module::$name(crate::engine::Engine::new()).await;
                }
            )*
        }
    )*};
}

#[path = "../kept/apart.rs"]
mod apart;
#[path = "../kept/basics.rs"]
mod basics;
#[path = "../kept/both.rs"]
mod both;
#[path = "../kept/copied.rs"]
mod copied;
mod engine;
#[path = "../kept/first.rs"]
mod first;
#[path = "../kept/meddling.rs"]
mod meddling;
#[path = "../kept/meeting.rs"]
mod meeting;
#[path = "../kept/moving.rs"]
mod moving;
#[path = "../kept/overview.rs"]
mod overview;
mod pairs;
#[path = "../kept/people.rs"]
mod people;
#[path = "../kept/sample.rs"]
mod sample;
mod server;
mod shared;
#[path = "../kept/sheets.rs"]
mod sheets;
#[path = "../kept/signed.rs"]
mod signed;
#[path = "../kept/things.rs"]
mod things;
