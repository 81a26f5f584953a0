// Package pairing tells the phones that belong to a house from strangers: codes that
// pair a phone, the tokens that paired phones hold, and links that let somebody read
// one job.
//
// Guarantees:
//   - a secret is handed out once and kept as a hash alone; all secrets come from
//     crypto/rand: tokens and links have 256 bits, a code in a link or picture 130, a
//     code that is typed 40;
//   - a code pairs one phone, within ten minutes, with the role it was opened for. Five
//     wrong tries close it, whoever made them and whatever was restarted meanwhile:
//     tries are counted in the file, before the answer is given;
//   - the same answer is given to a code that is wrong, used, late or closed;
//   - a token that was revoked is unknown from the next question on, in every process
//     that has the file open; nobody else can pair under the name of a device whose
//     token stands;
//   - a file that is damaged lets nobody in: a hash stands behind what is kept, so that
//     no bit of it is believed that was not written.
//
// It knows no HTTP and no job. Whoever may write the data folder needs no code: the
// folder's owner is the server's owner.
package pairing
