//go:build !linux

package folder

import "errors"

// exchange is not to be had here.
func exchange(_, _ string) error { return errors.ErrUnsupported }
