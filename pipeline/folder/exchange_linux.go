package folder

import "golang.org/x/sys/unix"

// exchange swaps two folders in one step, so that at no moment one is missing.
func exchange(a, b string) error {
	return unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
}
