package seal

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// Errors of keys.
var (
	// ErrKey is returned when a text is not a key of the wanted kind.
	ErrKey = errors.New("seal: not a key")
)

// A Key signs seals. It holds a secret: print [Key.Public] only.
type Key struct {
	signer   note.Signer
	verifier note.Verifier
	public   string
}

// keyName stands before every signature. One server has one key for all its jobs;
// the job is in the checkpoint.
const keyName = "hangtrue"

// GenerateKey makes a new key. The text is its secret form, for [ParseKey].
func GenerateKey(random io.Reader) (key *Key, secret string, err error) {
	secret, _, err = note.GenerateKey(random, keyName)
	if err != nil {
		return nil, "", fmt.Errorf("seal: generate key: %w", err)
	}
	key, err = ParseKey(secret)
	return key, secret, err
}

// ParseKey reads the secret form of a key. Its error never repeats the text.
func ParseKey(secret string) (*Key, error) {
	signer, err := note.NewSigner(secret)
	if err != nil {
		return nil, fmt.Errorf("%w: wanted a secret key in the signed-note form", ErrKey)
	}
	// PRIVATE+KEY+<name>+<hash>+<base64 of the algorithm's byte and the seed>; NewSigner has checked all of it.
	parts := strings.SplitN(secret, "+", 5)
	data, err := base64.StdEncoding.DecodeString(parts[len(parts)-1])
	if err != nil || len(data) != 1+ed25519.SeedSize {
		return nil, fmt.Errorf("%w: wanted a secret key in the signed-note form", ErrKey)
	}
	private := ed25519.NewKeyFromSeed(data[1:])
	public, err := note.NewEd25519VerifierKey(signer.Name(), private.Public().(ed25519.PublicKey))
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrKey, err)
	}
	verifier, err := note.NewVerifier(public)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrKey, err)
	}
	return &Key{signer, verifier, public}, nil
}

// Public is the public key, as a record file names it and as a person passes it on.
func (k *Key) Public() string { return k.public }

// Sign makes a seal over a log as the checkpoint describes it, and opens it again
// before it is returned: the note package signs texts that it then refuses to open.
func (k *Key) Sign(c Checkpoint) (string, error) {
	signed, err := note.Sign(&note.Note{Text: c.text()}, k.signer)
	if err != nil {
		return "", fmt.Errorf("seal: sign: %w", err)
	}
	if opened, err := open(string(signed), k.verifier); err != nil || opened != c {
		return "", fmt.Errorf("seal: sign: what was signed does not open again: %v", err)
	}
	return string(signed), nil
}

// Open checks a seal made with this key.
func (k *Key) Open(text string) (Checkpoint, error) { return open(text, k.verifier) }

// Open checks a seal against a public key and reads its checkpoint.
func Open(text, public string) (Checkpoint, error) {
	verifier, err := parsePublic(public)
	if err != nil {
		return Checkpoint{}, err
	}
	return open(text, verifier)
}

// CheckPublic tells whether a text is a public key.
func CheckPublic(public string) error {
	_, err := parsePublic(public)
	return err
}

func parsePublic(public string) (note.Verifier, error) {
	verifier, err := note.NewVerifier(public)
	if err != nil {
		return nil, fmt.Errorf("%w: wanted a public key such as hangtrue+1a2b3c4d+AZ…", ErrKey)
	}
	return verifier, nil
}

func open(text string, verifier note.Verifier) (Checkpoint, error) {
	if len(text) > maxNote {
		return Checkpoint{}, fmt.Errorf("%w: longer than %d bytes", ErrSeal, maxNote)
	}
	n, err := note.Open([]byte(text), note.VerifierList(verifier))
	var (
		unknown *note.UnverifiedNoteError
		invalid *note.InvalidSignatureError
	)
	switch {
	case errors.As(err, &unknown):
		return Checkpoint{}, fmt.Errorf("%w: it is not signed with this key", ErrSeal)
	case errors.As(err, &invalid):
		return Checkpoint{}, fmt.Errorf("%w: its text is not what was signed", ErrSeal)
	case err != nil:
		return Checkpoint{}, fmt.Errorf("%w: it is not a signed note", ErrSeal)
	}
	// The note package ignores signatures by others, repeated ones, and the two
	// spare bits at the end of a base64 signature. Here one signature in its one
	// spelling is all that may stand.
	if len(n.Sigs) != 1 || len(n.UnverifiedSigs) != 0 {
		return Checkpoint{}, fmt.Errorf("%w: wanted one signature", ErrSeal)
	}
	signature, err := base64.StdEncoding.Strict().DecodeString(n.Sigs[0].Base64)
	if err != nil {
		return Checkpoint{}, fmt.Errorf("%w: the signature is not written in its one form", ErrSeal)
	}
	var spelled bytes.Buffer
	fmt.Fprintf(&spelled, "%s\n— %s %s\n", n.Text, n.Sigs[0].Name, base64.StdEncoding.EncodeToString(signature))
	if spelled.String() != text {
		return Checkpoint{}, fmt.Errorf("%w: the note is not written in its one form", ErrSeal)
	}
	return parseCheckpoint(n.Text)
}
