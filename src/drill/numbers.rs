//! Numbers as a harbour station writes them.

use super::fragment::Bench;
use crate::keyboard::Output;

/// Fragments with `c`, where `A` to `D` stand for numbers
/// and `T` for a time of day.
pub(super) fn templates(c: char) -> &'static [&'static str] {
    match c {
        '.' => &["A.B", "A.B m", "A.B.", "A.B, C.D"],
        ',' => &["A, B", "A, B, C", "A,B"],
        ':' => &["T", "T to T", "T, T", "A at T"],
        '-' => &["A - B", "A-B-C", "-A", "A-B"],
        '+' => &["A + B", "+A", "A + B + C"],
        '*' => &["A * B", "A*B"],
        '/' => &["A / B", "A/B", "A/B/C"],
        '=' => &["A = B", "A == B", "= A"],
        '%' => &["A %", "A%", "A % B"],
        '(' | ')' => &["(A)", "(A + B)", "(A, B)", "(A) B"],
        '<' => &["A < B", "<A"],
        '>' => &["A > B", ">A"],
        '#' => &["#A", "#A, #B"],
        '$' => &["$A", "$A.B"],
        '^' => &["A^B", "A ^ B"],
        'x' => &["0xA", "A x B"],
        'm' => &["A m", "A.B m"],
        'e' => &["AeB"],
        _ => &[],
    }
}

/// A number of one to three of the digits that the layout can type; none
/// where it can type no digit. No zero leads a number of several digits.
pub(super) fn number(bench: &mut Bench) -> Option<String> {
    let digits: Vec<char> =
        ('0'..='9').filter(|digit| bench.reach.can(&Output::char(*digit))).collect();
    let leading: Vec<char> = digits.iter().copied().filter(|digit| *digit != '0').collect();
    if leading.is_empty() {
        return digits.first().map(char::to_string);
    }
    let mut number = String::new();
    let length = 1 + bench.below(3);
    for place in 0..length {
        number.extend(bench.pick(if place == 0 { &leading } else { &digits }));
    }
    Some(number)
}

/// Lines that nobody wrote before: rows of a tide table, measures, dates,
/// sums that come out right. At most `count`; a layout that can't type one
/// gets fewer.
pub(super) fn lines(bench: &mut Bench, count: usize) -> Vec<String> {
    let mut found = Vec::new();
    for turn in 0..count {
        let line = match turn % 6 {
            0 => tides(bench),
            1 => sums(bench),
            2 => dates(bench),
            3 => measures(bench),
            4 => places(bench),
            _ => departures(bench),
        };
        if bench.reach.exact(&line).is_some() {
            found.push(line);
        }
    }
    found
}

/// Three tides in a row: about 6 h 12 min apart (half of the mean semidiurnal
/// period of 12 h 25 min, from memory), high and low in turn.
fn tides(bench: &mut Bench) -> String {
    let mut minute = bench.below(360);
    let mut rows = Vec::new();
    let high_first = bench.once_in(2);
    for turn in 0..3 {
        let level = if (turn % 2 == 0) == high_first {
            290 + bench.below(220)
        } else {
            40 + bench.below(130)
        };
        rows.push(format!("{} {}.{:02} m", clock(minute), level / 100, level % 100));
        minute += 355 + bench.below(36);
    }
    rows.join("  ")
}

/// The time of day, `minute` after midnight.
pub(super) fn clock(minute: usize) -> String {
    format!("{:02}:{:02}", minute / 60 % 24, minute % 60)
}

fn sums(bench: &mut Bench) -> String {
    let mut parts = Vec::new();
    for _ in 0..3 {
        let (a, b) = (11 + bench.below(88), 3 + bench.below(66));
        parts.push(match bench.below(3) {
            0 => format!("{a} + {b} = {}", a + b),
            1 => format!("{} - {b} = {a}", a + b),
            _ => format!("{a} * {} = {}", b % 9 + 2, a * (b % 9 + 2)),
        });
    }
    parts.join("; ")
}

fn dates(bench: &mut Bench) -> String {
    let mut parts = Vec::new();
    for _ in 0..3 {
        let (year, month, day) =
            (1870 + bench.below(180), 1 + bench.below(12), 1 + bench.below(28));
        parts.push(format!("{year}-{month:02}-{day:02} page {}", 1 + bench.below(399)));
    }
    parts.join(", ")
}

fn measures(bench: &mut Bench) -> String {
    let mut parts = Vec::new();
    for unit in ["m", "kg", "mm", "l"] {
        let tenths = 10 + bench.below(9800);
        parts.push(format!("{}.{} {unit}", tenths / 10, tenths % 10));
    }
    format!("{} at {} %", parts.join(", "), 10 + bench.below(90))
}

fn places(bench: &mut Bench) -> String {
    let minutes = |bench: &mut Bench| {
        let hundredths = bench.below(6000);
        format!("{:02}.{:02}", hundredths / 100, hundredths % 100)
    };
    let (north, east) = (minutes(bench), minutes(bench));
    let bearing = bench.below(360);
    format!(
        "mark {} at 54 {north} N, {} {east} E, bear {bearing:03}",
        1 + bench.below(98),
        6 + bench.below(4)
    )
}

fn departures(bench: &mut Bench) -> String {
    let mut minute = 300 + bench.below(120);
    let mut parts = Vec::new();
    for _ in 0..4 {
        parts.push(format!("{} berth {}", clock(minute), 1 + bench.below(9)));
        minute += 60 + bench.below(190);
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::fragment::Voice;
    use crate::drill::material::shipped;
    use crate::drill::reach::Reach;
    use crate::drill::what::{Focus, What};
    use crate::layout::{Cluster, LayerId, RouteTable, shipped as layouts};
    use rand::SeedableRng;

    /// Every sum that is made comes out right, every time of day exists.
    #[test]
    fn figures_are_true() {
        let layout = layouts::load("plain-ansi").unwrap();
        let reach = Reach::new(&RouteTable::build(&layout));
        let focus = Focus::new(What::Cluster(Cluster::Numbers), &layout, &reach).unwrap();
        let rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let words = &shipped().unwrap().words;
        let mut bench = Bench::new(&reach, &focus, Voice::Figures, rng, words);
        let (mut checked, mut times) = (0, 0);
        for line in lines(&mut bench, 300) {
            for sum in line.split("; ").filter(|part| part.contains(" = ")) {
                let part: Vec<&str> = sum.split(' ').collect();
                let [a, operator, b, _, result] = part[..] else { panic!("{sum}") };
                let (a, b): (i64, i64) = (a.parse().unwrap(), b.parse().unwrap());
                let value = match operator {
                    "+" => a + b,
                    "-" => a - b,
                    "*" => a * b,
                    other => panic!("{other}"),
                };
                assert_eq!(value.to_string(), result, "{sum}");
                checked += 1;
            }
            for (hour, minute) in line.split(' ').filter_map(|word| word.split_once(':')) {
                assert!(hour.parse::<u32>().unwrap() < 24 && minute.parse::<u32>().unwrap() < 60);
                times += 1;
            }
        }
        assert!(checked > 100 && times > 100, "{checked} {times}");
    }

    #[test]
    fn numbers_use_only_the_digits_at_hand() {
        let with = |text: &str| {
            Reach::from_layers(text.chars().map(|c| (Output::char(c), vec![LayerId::BASE])))
        };
        let layout = layouts::load("plain-ansi").unwrap();
        for (digits, ok) in [("0123456789", true), ("37", true), ("0", true), ("abc", false)] {
            let reach = with(digits);
            let focus = Focus::new(What::Layer(LayerId::BASE), &layout, &reach).unwrap();
            let rng = rand_chacha::ChaCha8Rng::seed_from_u64(2);
            let words = &shipped().unwrap().words;
            let mut bench = Bench::new(&reach, &focus, Voice::Figures, rng, words);
            for _ in 0..50 {
                let number = number(&mut bench);
                assert_eq!(number.is_some(), ok);
                let number = number.unwrap_or_default();
                assert!(number.chars().all(|digit| digits.contains(digit)));
                assert!(number.len() < 2 || !number.starts_with('0'));
            }
        }
    }
}
