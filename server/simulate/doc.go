// Package simulate runs a server and several phones through a job in simulated
// time, breaks whatever can break on the way, and looks whether every promise was
// kept. Tests use it, and the runner in its folder run; the program does not.
//
// What runs is the real thing: the server's routes, its keeper and a store; the
// phones' engine. Simulated are the network, the clocks, the phones' storage, and
// the scripts around an engine, in the same order of operations as the modules in
// pwa/static have them, so that a change there has to be followed here.
//
// A run is one event loop without goroutines, sleeps or clocks: a seed gives the
// same run on every machine. A failing run names the promise that was broken, the
// seed, and the steps that led there; [Shrink] leaves out those that do not matter.
//
// The promises that are looked after:
//   - what the server answered stays in its log as it was answered, once;
//   - what a phone called saved is in the log in the end, or kept apart with a
//     reason, unless that phone's storage was lost before it was sent, or a row was
//     damaged and an old backup took away what no other copy had;
//   - positions are 1, 2, 3 …, and so are the numbers of each device;
//   - no accepted entry passed a hold point, by a reading of the log that shares
//     no code with the fold (package reread);
//   - every sign-off's seal stays, and the record verifies;
//   - when everything works again, the phones' queues are empty and all show what
//     the server shows, within a few exchanges, and nothing moves after that;
//   - what a phone says is waiting is what waits on its storage.
package simulate
