// Package simulate runs a server and several phones through a job in simulated
// time, breaks whatever can break on the way, and looks whether every promise was
// kept. Tests use it, and the runner in its folder run; the program does not.
//
// What runs is the real thing: the server's routes, its keeper, a store and the store
// of photos; the phones' engine. Simulated are the network, the clocks, the disk below
// the photos, the phones' storage, and the scripts around an engine, in the same order
// of operations as the modules in pwa/static have them, so that a change there has to
// be followed here. Pictures are real ones of a few pixels, and go in pieces of 120
// bytes. A backup is the log of one moment and the photos of a later one, as package
// care makes it.
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
//   - what a phone says is waiting is what waits on its storage;
//   - a phone whose program goes by former steps is told when it has met a record that
//     later ones decided;
//   - a photo that was saved with an entry is on its phone or whole at the server,
//     unless the phone's storage was lost, or the phone let it go when the server had
//     it, and an old backup came back since or a byte on the server's disk turned;
//   - a phone lets go of what the server has at that moment, or had when the phone last
//     met it, where an old backup came back since; of what came to the server first,
//     where room is short;
//   - what has a picture's name at the server is that picture, once; what the server
//     said it has whole it has after a crash or a power cut, until an old backup comes
//     back;
//   - when everything works again, every photo that the log names and a phone has is
//     whole at the server, and is handed out as it was taken; where a byte on the
//     server's disk turned, once somebody had the phones send all photos again, and
//     what is spoilt is never handed out.
package simulate
