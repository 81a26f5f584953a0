// Package engine is the program on the phone without its browser: what it knows
// of each job, the pages it shows, the entries it makes, and how it brings them
// to the server.
//
// [Engine.Call] is its one entry: a command's name and JSON in, JSON out. It
// never waits: what has to be read, written or fetched it asks for in its answer
// ("need", "write", "request"), and the caller comes back when that is done.
//
// Promises:
//   - an entry becomes part of what is shown only after the caller said that its
//     bytes are on the phone's storage ("kept");
//   - an entry leaves the phone's queue only together with the record that the
//     server made of it, in the same list of writes, or as a stray;
//   - an entry that can no longer be read, or that the server kept apart, holds up
//     nothing behind it: a remark takes its number;
//   - records are put only on top of records that the server still has, and only
//     where the storage is as this engine knows it: what another tab wrote, and
//     could not tell of, is read first;
//   - a server that lost what it had (an old backup came back) gets this device's
//     entries again; what was kept apart because it had no such job is sent when it
//     has;
//   - a photo is saved with the entry that names it, or neither is; it is sent after all
//     entries, goes on where it was cut off, and is let go only when the server has it
//     and its entry was accepted;
//   - over a line on which large requests do not come through it makes smaller ones, until
//     everything has got there;
//   - a server that was started again is asked which photos it still has, and gets the
//     others again;
//   - a job is loaded from a snapshot and the records behind it only where the records
//     before it are, to the byte, those that it was taken with;
//   - no input makes it panic outward: a fault is an answer, and the caller then
//     starts a new engine from what is stored.
//
// It reads no clock, no network and no storage, and it decides nothing about the
// domain: that is package checklist, and the markup is package pages.
package engine
