// Package authority is the program's own certificate authority, for phones in the
// same house: a phone that trusts it reaches the server over HTTPS with no name in
// public DNS and no connection to the internet.
//
// Guarantees:
//   - the authority is made once, in keys/ of the data folder, and is never replaced
//     by itself: whoever lost its key is told so;
//   - its key is readable by the owner of the folder alone and is handed out by
//     nothing in this package;
//   - it vouches only for names and addresses of a house's own network: private,
//     link-local and loopback addresses, localhost, .local, .home.arpa, and the names
//     the machine had when it was made. The certificate says so itself (name
//     constraints, RFC 5280 section 4.2.1.10, critical), and [Authority.Issue] refuses
//     anything else;
//   - a [Leaf] is valid for 397 days, names what it is for in subjectAltName alone,
//     serves as a server's certificate and as nothing else, and is renewed at two
//     thirds of its life and whenever the machine's names or addresses change.
//
// Name constraints in an authority that a person trusted by hand are heeded by
// crypto/x509 and by Chromium, which tests hold them to. How far phones do differs
// (from memory, not verified; RFC 5280 section 6.2 leaves it open). They bound the harm of a stolen key where they are heeded. Guarding the key
// is what counts. A constraint cannot say "this name and none below it": a machine
// called box lets the holder of the key vouch for names that end in .box too.
//
// It revokes nothing: who loses the key makes a new authority, and phones drop the
// old one.
package authority
