// Package care looks after stored folders: it makes backups, puts them back, tells
// what is wrong with either, and takes in a job by its record file.
//
// A backup is one tar file or a folder, with these parts in this order:
//
//	jobs.db          the store as it stood at one moment
//	keys/…           what is secret, unless it was left out; in keys/seal.key what
//	                 seals are signed with
//	photos/…         pictures that entries name, copied after the store; one that is no
//	                 longer what its name says is left out
//	…                whatever else is in the folder
//	manifest.json    what the backup is, and size and SHA-256 of every part
//	manifest.sha256  the SHA-256 of manifest.json, as sha256sum writes it
//
// The manifest comes last, so that a backup that was cut short has none:
//
//	{"format": "hangtrue-backup/1", "made": "2030-01-31T09:15:00Z", "program": "…",
//	 "store_format": 2, "key": "hangtrue+8a2b…+AZ…", "has_secret_key": true,
//	 "jobs": [{"id": "018f…", "title": "…", "records": 57, "seals": 1, "signed": true}],
//	 "parts": [{"name": "jobs.db", "size": 86016, "sha256": "…"}, …]}
//
// Guarantees:
//   - a backup gets its name only when it is whole, on the disk, and was read back
//     and found to be what was meant to be written, every record included; nothing
//     that is there is written over;
//   - a server that uses the folder goes on meanwhile: it is asked for a copy, and
//     makes one of a single moment on its own disk before it hands it out;
//   - looking changes no byte, whatever state the files are in;
//   - what a backup brings back lets nobody in whom it let in when it was made, unless
//     that is asked for: it does not know who was revoked since;
//   - a record becomes a job only whole, verified, and where the job was not; the file
//     it came in is kept as it came;
//   - restoring writes into no folder that has anything in it, and leaves nothing
//     behind when it fails.
//
// It does not encrypt: who has a backup with the key can sign in its place. It
// repairs nothing. What a process that was killed left is a name with ".partial-"
// in it, which may be deleted.
package care
