//go:build linux || darwin

package photos

import "syscall"

// free is how many bytes this program may still write to the disk of a folder.
func free(dir string) (bytes int64, known bool) {
	var s syscall.Statfs_t
	if syscall.Statfs(dir, &s) != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}
