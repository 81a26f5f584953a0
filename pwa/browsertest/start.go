package browsertest

import (
	"context"
	"os"
	"testing"
)

// Required tells whether a missing browser fails a test instead of skipping it.
func Required() bool {
	return os.Getenv("CI") == "true" || os.Getenv("HANGTRUE_BROWSER") == "required"
}

// Start is [Open] for a test: without a browser the test is skipped, or fails
// where [Required]; at its end the browser is closed and every fault fails it.
func Start(t testing.TB, o Options) *Browser {
	t.Helper()
	if _, err := find(); err != nil {
		if Required() {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	b, err := Open(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		b.Close()
		for _, f := range b.Faults() {
			t.Error("the page had a fault:", f)
		}
	})
	return b
}
