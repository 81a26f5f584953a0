// Package bolt keeps logs in one bbolt file.
//
// On top of what bbolt promises:
//   - the file is made whole under another name, synced and then renamed, because
//     bbolt's own first write is not safe against a power cut;
//   - every value carries a hash and is held to it when read, because bbolt checks
//     its own pages' structure and no value;
//   - callers who append at the same time share one transaction and one sync
//     ([together]), and a lone caller waits for nobody;
//   - a file that is no store, is cut short, or is in use gives one sentence, and
//     no panic of bbolt leaves this package.
//
// Buckets: "records" has job (16 bytes) and position (8, big-endian) to packed
// record; "ids" job and entry id (16) to position; "seals" job and position to
// packed seal; "lines" job to packed line; "strays" sequence (8) to packed stray;
// "strayed" a stray's hash to its sequence; "about" the format.
//
// It does not encrypt, and one process only can have the file open.
package bolt
