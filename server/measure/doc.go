// Command measure prints what the server reaches, each figure beside the bare limit
// that the same machine shows in the same run:
//
//   - pushes: durable pushes a second by 1, 8 and 64 phones, through the keeper,
//     against bare bbolt transactions that callers share and that write the same keys
//     and values, and beside the sharing that bbolt brings itself; and over HTTP,
//     against such transactions behind the same HTTP;
//   - store: a store of many jobs made by a generator: start of the program, the list
//     page, one job opened, memory, size on disk, against the answer to /healthz;
//   - pages: pages of one job a second with 400 entries, with ten times and with
//     50,000, opened first, with and without a snapshot, and again, against the answer to /healthz;
//   - kill: the program killed under load again and again: what was lost, what was
//     there twice, the time until it served again.
//
// The last three run the real program, which is built first and needs what go
// generate ./pwa makes. It judges nothing and leaves nothing behind.
package main
