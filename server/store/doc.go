// Package store says what the server asks of the place where logs are kept, and
// how a record is written so that damage shows.
//
// Every implementation keeps these promises, which package storetest holds it to:
//   - [Store.Append] is all or nothing, and what it answered without an error is
//     there after the process or the machine stopped at any moment;
//   - positions of a job are 1, 2, 3 … without gaps, whoever appends;
//   - what is read is what was written: a record whose bytes changed is a [Damage]
//     with its place, never a record.
//
// It decides nothing about entries and knows no network. REPLICATED.md says what a
// replicated SQL store would take.
package store
