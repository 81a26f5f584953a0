package server_test

import (
	"net/http/httptest"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server"
	"hangtrue/server/memory"
)

// TestOptions_Answers: a server with names of its own answers to those and to this
// computer's, and to no other.
func TestOptions_Answers(t *testing.T) {
	app := server.New(server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test",
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

// TestOptions_Guard: every route is behind the guard, which sees only what passed
// the border; what it refuses has the headers that every answer has.
func TestOptions_Guard(t *testing.T) {
	seen := 0
	app := server.New(server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test",
		Guard: func(c *fiber.Ctx) error {
			seen++
			if c.Get("X-Test-Key") == "right" {
				return c.Next()
			}
			return fiber.ErrUnauthorized
		}})
	for i, path := range []string{"/", "/sw.js", "/healthz", "/api/version", "/api/jobs", "/api/strays", "/api/jobs/" + jobA + "/records", "/jobs/" + jobA + "/record.json"} {
		req := httptest.NewRequest("GET", path, nil)
		req.Host = "localhost"
		res, err := app.Test(req)
		require.NoError(t, err)
		assert.Equal(t, 401, res.StatusCode, path)
		assert.NotEmpty(t, res.Header.Get("Content-Security-Policy"), path)
		assert.Equal(t, i+1, seen)
	}
	req := httptest.NewRequest("GET", "/api/jobs", nil)
	req.Host = "localhost"
	req.Header.Set("X-Test-Key", "right")
	res, err := app.Test(req)
	require.NoError(t, err)
	assert.Equal(t, 200, res.StatusCode)

	before := seen
	req.Host = "evil.example"
	res, err = app.Test(req)
	require.NoError(t, err)
	assert.Equal(t, 421, res.StatusCode)
	assert.Equal(t, before, seen)
}
