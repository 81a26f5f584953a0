package server

import (
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// TestSparing: who causes a warning again and again fills no log, hides no other kind of
// warning by it, and is told with the number.
func TestSparing(t *testing.T) {
	var log strings.Builder
	before := slog.Default()
	slog.SetDefault(slog.New(slog.NewTextHandler(&log, nil)))
	defer slog.SetDefault(before)
	at := time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)
	s := &sparing{now: func() time.Time { return at }}
	for range 10_000 {
		s.warn("refused", "from", "192.168.1.9")
	}
	assert.Equal(t, sparingLines, strings.Count(log.String(), "msg=refused"))
	s.warn("refused to pair a device", "from", "192.168.1.10")
	assert.Contains(t, log.String(), "192.168.1.10")
	assert.NotContains(t, log.String(), "times=")

	at = at.Add(sparingSpan)
	log.Reset()
	s.warn("refused", "from", "192.168.1.11")
	assert.Contains(t, log.String(), `msg="more of the same than is logged" of=refused times=9900`)
	assert.Contains(t, log.String(), "192.168.1.11")
	at = at.Add(sparingSpan)
	log.Reset()
	s.warn("refused")
	assert.NotContains(t, log.String(), "times=", "what was told is not told again")
}
