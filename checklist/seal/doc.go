// Package seal makes a log's record tamper-evident and checks one that was kept.
//
// The records of a job are the leaves of a Merkle tree with the hashing of RFC
// 6962 section 2.1; a leaf is what [checklist.Record.Leaf] returns, which names
// the job and the position. A seal is an Ed25519-signed note (the signed note
// format of golang.org/x/mod/sumdb/note) whose text is a checkpoint of four lines:
//
//	hangtrue/018f3c5e-7a10-7000-8000-0000000000a1
//	37
//	PlHX9uGjmvwy3y8xX+3UlcLBYHMvvUOCQkRLsZFc1pA=
//	hangtrue seal 1: sign-off
//
// They are the log the seal belongs to, how many records it covers, the root of
// their tree in base64, and what the seal is for ([Purpose]), so that no other
// note signed with the same key passes as this one.
//
// A record file is JSON:
//
//	{"format": "hangtrue-record/2", "job": "018f…", "title": "…",
//	 "key": "hangtrue+8a2b…+AZ…",        the public key
//	 "records": [{"position": 1, …, "edition": 2, "entry": "{…}"}, …],
//	 "hashes": ["…", …],                 the leaf hash of each record, base64
//	 "seals": ["hangtrue/018f…\n37\n…", …]}
//
// The format is "hangtrue-record/1" where no record says by which edition of the steps
// it was decided; such files were written before editions were, and stay what they are.
//
// Guarantees: with the public key known from elsewhere, any change of a record
// that a seal covers, any dropped, added, moved or reordered one is found, and
// named where the file still holds enough to tell which it is. White space between
// the file's values is the only thing that may change unnoticed. Every note is
// opened again after signing and before use; what cannot be opened is never kept.
//
// It does not tell whether what was recorded was true, whether a clock was right,
// or, when the key is taken from the file itself, who made the file. It reads no
// files and keeps no keys on disk.
package seal
