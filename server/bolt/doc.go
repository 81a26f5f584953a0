// Package bolt keeps logs in one bbolt file.
//
// On top of what bbolt promises:
//   - the file is made whole under another name, synced and then renamed, because
//     bbolt's own first write is not safe against a power cut;
//   - every value carries a hash and is held to it when read, because bbolt checks
//     its own pages' structure and no value;
//   - the file's pages are looked at before it is opened for writing, without bbolt:
//     one that is in the tree and in the list of free pages would be written over;
//   - [Examine] reads every byte and names all that is not what was written, by job
//     and position, without changing anything ([Store.Examine] in an open store);
//   - callers who append at the same time share one transaction and one sync
//     ([together]), and a lone caller waits for nobody;
//   - a file that is no store, is cut short, or is in use gives one sentence, and
//     no panic of bbolt leaves this package.
//
// Buckets: "records" has job (16 bytes) and position (8, big-endian) to packed
// record; "ids" job and entry id (16) to position, save those of a job's last entries;
// "seals" job and position to packed seal; "lines" job to packed line, with the ids that
// "ids" does not have yet; "strays" sequence (8) to packed stray; "strayed" a stray's
// hash to its sequence; "snapshots", which may be missing, job to the snapshot of its
// state; "about" the format, the public key that seals are checked with and how many
// bytes strays have.
//
// The format is "hangtrue-store/" and a number. A newer one is refused with a
// sentence. An older one is copied beside itself (jobs.db.format-1) and brought to
// today's in one transaction by the steps in upgrades, one from each format to the
// next: to change the format, or what a record, line or seal says so that an older
// program would take it for damaged, append a step and keep a folder of the new one in
// testdata/folders.
//
// What a head that is damaged led to last is lost in silence by bbolt, which goes by
// the other one; here it is told, as damage that is about no job.
//
// It does not encrypt, and one process only can have the file open.
package bolt
