// Package server answers phones and browsers: it gives entries their place in the
// log, hands records out, and serves the pages.
//
// Guarantees:
//   - an entry is answered only after it was synced to the disk; the same entry
//     sent again gets the same answer and is not kept twice;
//   - one entry that is refused, unreadable or of another job holds up no other;
//   - entries of a job are decided one after another, each against the state that
//     all before it add up to;
//   - an accepted sign-off and its seal are kept together or not at all;
//   - a job is opened from a snapshot and the log behind it, which come to what the
//     whole log comes to; a sign-off is decided and sealed by the whole log alone;
//   - what is handed out is what was written: a damaged record is named, not served;
//   - a photo is handed out to who may read a job whose entries name it, whole and as
//     its hash says, or not at all; it arrives apart from the entries ([photos.Store]);
//   - one table says who may use which route; with a [pairing.Book] a stranger reads
//     nothing of any job and changes nothing, and a device brings only what it made
//     itself, with its own role at most. SECURITY.md says what that does and does not
//     protect from.
//
// A [Keeper] decides and keeps; [New] puts HTTP around it. Pages come from package
// pages, logs go to a package store. It listens on no address by itself.
package server
