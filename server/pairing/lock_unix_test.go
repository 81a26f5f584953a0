//go:build unix

package pairing_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/pairing"
)

// TestStranger_WaitsForNobody: what a stranger asks while no code is open is answered
// without the lock that writing takes, and so are the questions of paired devices.
func TestStranger_WaitsForNobody(t *testing.T) {
	w := open(t)
	token := w.pair(phone1, checklist.Lead)
	lock, err := os.OpenFile(filepath.Join(w.dir, pairing.File)+".lock", os.O_RDWR, 0)
	require.NoError(t, err)
	defer lock.Close()
	require.NoError(t, syscall.Flock(int(lock.Fd()), syscall.LOCK_EX)) // until it is closed, as if another process were writing
	w.wrong("2222-2222")
	_, _, err = w.Visit("nonsense", nowhere)
	assert.ErrorIs(t, err, pairing.ErrLink)
	_, err = w.Who(token)
	assert.NoError(t, err)
}
