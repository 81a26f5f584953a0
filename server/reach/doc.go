// Package reach is how phones reach the server: which certificate it shows them, and
// the page that tells a phone how to trust it.
//
// A certificate comes from one of three: the program's own authority
// ([hangtrue/server/authority.Leaf]), files that somebody else renews ([Files]), or a public
// authority over ACME, RFC 8555 ([ACME]). [Watch] keeps each of them fresh without a
// restart.
//
// Guarantees:
//   - nothing but TLS 1.2 and later is spoken, and nothing asks a browser to refuse plain
//     HTTP later but the server of a name that a public authority vouches for: with a
//     local authority that is lost, its names would be locked out;
//   - [TrustPage], which is served without protection, hands out what is public and
//     nothing else: the authority's certificate, its fingerprint, addresses and advice.
//
// It opens no port and knows no job.
package reach
