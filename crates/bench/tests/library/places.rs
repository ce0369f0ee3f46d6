//! The two databases, as the tests use them: a file beside the library, and a database of its own on the server.

use std::{env, sync::atomic::AtomicU32};

use joulemark::library::{Place, index::IndexPlace};

use super::shop::Shop;

/// Which database.
#[derive(Clone, Copy, Debug)]
pub enum Database {
    Sqlite,
    Postgres,
}

pub const POSTGRES: &str = "JOULEMARK_POSTGRES_URL";

/// A library of that shop with an index of its own.
pub fn place(shop: &Shop, database: Database) -> Place {
    let index = match database {
        Database::Sqlite => IndexPlace::File(shop.beside("index/joulemark-index.sqlite")),
        Database::Postgres => IndexPlace::Server(own_database()),
    };
    Place { folder: shop.library(), index }
}

/// A new database on the server of the test run; its URL has `/postgres?` where the database is named.
fn own_database() -> String {
    static NUMBER: AtomicU32 = AtomicU32::new(0);
    let url = env::var(POSTGRES).unwrap_or_else(|_| {
        panic!("{POSTGRES} is not set: tests/run starts a server and sets it, or give postgresql:///postgres?user=NAME&host=FOLDER")
    });
    let number = NUMBER.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
    let name = format!("joulemark_{}_{number}", std::process::id());
    let mut client = postgres::Client::connect(&url, postgres::NoTls).expect("the server of the test run answers");
    client.batch_execute(&format!("CREATE DATABASE {name}")).expect("the user may make databases");
    assert!(url.contains("/postgres?"), "{POSTGRES} must name the database as in postgresql:///postgres?host=FOLDER");
    url.replacen("/postgres?", &format!("/{name}?"), 1)
}
