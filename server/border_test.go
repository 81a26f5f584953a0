package server_test

import (
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server"
	"hangtrue/server/memory"
)

// TestOptions_Answers: a server with names of its own answers to those and to this
// computer's, and to no other.
func TestOptions_Answers(t *testing.T) {
	app := server.New(server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test", Book: book(t),
		Answers: func(host string) bool { return host == "attic.local" || host == "192.168.1.5" || host == "fd00::5" }})
	for _, row := range []struct {
		host   string
		status int
	}{
		{"attic.local", 200}, {"attic.local:8470", 200}, {"192.168.1.5:8470", 200}, {"[fd00::5]:8470", 200}, {"[fd00::5]", 200},
		{"localhost:8470", 200}, {"127.0.0.1:8470", 200},
		{"evil.example", 421}, {"192.168.1.6:8470", 421}, {"attic.local.evil.example", 421}, {"[fd00::6]:8470", 421},
	} {
		req := httptest.NewRequest("GET", "/healthz", nil)
		req.Host = row.host
		res, err := app.Test(req)
		require.NoError(t, err)
		assert.Equal(t, row.status, res.StatusCode, row.host)
	}
}

// TestOptions_NoBook: a server that knows nobody answers this computer alone.
func TestOptions_NoBook(t *testing.T) {
	app := server.New(server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test", Answers: func(string) bool { return true }})
	req := httptest.NewRequest("GET", "/healthz", nil)
	req.Host = "attic.local"
	res, err := app.Test(req)
	require.NoError(t, err)
	assert.Equal(t, 421, res.StatusCode)
}
