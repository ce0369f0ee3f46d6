//! The file's commands, one each (specification, section 3.5): the parser takes lines, files need not.

/// No command is longer, macros included; the parser's cost grows with the length.
const MOST_BYTES: usize = 1 << 16;

type Fault = (usize, String);

/// Commands with the line they begin on: `...*` for a word command, `%...*%` for an extended one, line breaks left out.
pub(super) fn split(text: &str) -> Result<Vec<(usize, String)>, Fault> {
    let mut commands: Vec<(usize, String)> = Vec::new();
    let (mut line, mut begun) = (1, 1);
    let mut command = String::new();
    let mut extended = false;
    for c in text.chars() {
        match c {
            '\n' => line += 1,
            '\r' => {}
            c if command.is_empty() && c.is_whitespace() => {}
            // Some programs leave out the star before an extended command.
            '%' if !command.is_empty() && !extended => {
                command.push('*');
                check(&command).map_err(|problem| (begun, problem))?;
                commands.push((begun, std::mem::replace(&mut command, "%".to_owned())));
                (begun, extended) = (line, true);
            }
            c => {
                if command.is_empty() {
                    begun = line;
                    extended = c == '%';
                }
                // Commands are ASCII; only comments and values of attributes hold more, and the parser cuts at bytes.
                let control = c.is_control();
                command.push(if c.is_ascii() && !control { c } else { '?' });
                if command.len() > MOST_BYTES {
                    return Err((begun, "the command is too long".into()));
                }
                let ends = if extended { c == '%' && command.len() > 1 } else { c == '*' };
                if ends {
                    check(&command).map_err(|problem| (begun, problem))?;
                    if command != "*" {
                        commands.push((begun, std::mem::take(&mut command)));
                    }
                    command.clear();
                }
            }
        }
    }
    if command.is_empty() {
        Ok(commands)
    } else {
        Err((begun, format!("'{command}' does not end: the file is cut short")))
    }
}

/// The parser looks at the first three letters without asking whether they are there.
fn check(command: &str) -> Result<(), String> {
    let short = command.len() < 3 && command != "*";
    let unended = command.starts_with('%') && !command.ends_with("*%");
    if short || unended { Err(format!("'{command}' is not understood")) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_may_share_lines_and_break_over_them() {
        let text = "G04 x*G75*\n%FSLAX\r\n46Y46*%%MOMM*%\n\nX1\nY2D02*";
        let found = split(text).unwrap();
        let wanted = [(1, "G04 x*"), (1, "G75*"), (2, "%FSLAX46Y46*%"), (3, "%MOMM*%"), (5, "X1Y2D02*")];
        assert_eq!(found, wanted.map(|(line, c)| (line, c.to_owned())));
        assert_eq!(split("G75*\nX1").unwrap_err(), (2, "'X1' does not end: the file is cut short".into()));
        assert_eq!(split("G75\n%LPD*%").unwrap(), [(1, "G75*".to_owned()), (2, "%LPD*%".to_owned())]);
        assert!(split("%*\n%MO%").is_err());
    }
}
