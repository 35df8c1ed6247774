//! The rooms, as the one table in ARCHITECTURE.md gives them. Nothing else lists them.

use super::tree::Tree;

pub(crate) const MAP: &str = "ARCHITECTURE.md";
const HEADING: &str = "## Rooms and arrows";

/// One row of the table.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Room {
    pub(crate) name: String,
    pub(crate) may_use: Vec<String>,
    /// No clock, no files, no environment, no network.
    pub(crate) pure: bool,
}

/// The rooms; empty where the table is missing, which `arrows` complains of.
pub(crate) fn rooms(tree: &Tree) -> Vec<Room> {
    let Some(map) = tree.text(MAP) else { return Vec::new() };
    map.lines()
        .skip_while(|line| line.trim() != HEADING)
        .skip(1)
        .take_while(|line| !line.starts_with("## "))
        .filter(|line| line.starts_with("| `"))
        .filter_map(room)
        .collect()
}

fn room(row: &str) -> Option<Room> {
    let mut cells = row.trim().trim_matches('|').split('|');
    let name = names(cells.next()?).pop()?;
    let pure = cells.next()?.trim() == "pure";
    let may_use = names(cells.next()?);
    Some(Room { name, may_use, pure })
}

/// What stands in backticks.
fn names(cell: &str) -> Vec<String> {
    cell.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_read() {
        let map = "# Map\n| `not` | pure | – |\n## Rooms and arrows\n| room | kind | may use |\n\
                   |---|---|---|\n| `a` | pure | – | x |\n| `b` | shell | `a`, `c` | y |\n## Next\n\
                   | `d` | pure | – |\n";
        let found = rooms(&Tree::of(&[(MAP, map)]));
        let expected = [
            Room { name: "a".into(), may_use: vec![], pure: true },
            Room { name: "b".into(), may_use: vec!["a".into(), "c".into()], pure: false },
        ];
        assert_eq!(found, expected);
    }
}
