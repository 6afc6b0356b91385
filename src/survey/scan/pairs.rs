//! Pairs of characters of which one is not ASCII.

use super::{ASCII, UNPAIRED};

/// How often each pair of characters below [`UNPAIRED`] came: a table for each
/// two pages of 128 characters that meet, made when they do. A script has one or
/// two pages, so that even a text in many has few tables.
#[derive(Debug, Clone)]
pub(super) struct Pairs {
    /// For the pages of both the table, from 1; 0 for none yet.
    of: Vec<u16>,
    /// Each with its pages.
    tables: Vec<(u32, u32, Box<[u32; ASCII * ASCII]>)>,
}

/// Pages of characters that make pairs.
const PAGES: u32 = UNPAIRED >> 7;

impl Default for Pairs {
    fn default() -> Self {
        Self { of: vec![0; (PAGES * PAGES) as usize], tables: Vec::new() }
    }
}

impl Pairs {
    pub(super) fn add(&mut self, one: u32, other: u32) {
        let pages = ((one >> 7) * PAGES + (other >> 7)) as usize;
        let mut table = self.of[pages];
        if table == 0 {
            let counters = vec![0; ASCII * ASCII].into_boxed_slice();
            if let Ok(counters) = counters.try_into() {
                self.tables.push((one >> 7, other >> 7, counters));
            }
            table = self.tables.len() as u16;
            self.of[pages] = table;
        }
        let counters = &mut self.tables[usize::from(table) - 1].2;
        counters[((one & 0x7F) << 7 | other & 0x7F) as usize] += 1;
    }

    /// All pairs that came, with how often.
    pub(super) fn drain(&mut self) -> impl Iterator<Item = (u32, u32, u64)> {
        self.of.fill(0);
        let tables = std::mem::take(&mut self.tables).into_iter();
        tables.flat_map(|(one, other, counters)| {
            let all = (0..ASCII * ASCII).map(move |at| (at as u32, u64::from(counters[at])));
            all.filter(|(_, times)| *times > 0)
                .map(move |(at, times)| (one << 7 | at >> 7, other << 7 | at & 0x7F, times))
        })
    }
}
