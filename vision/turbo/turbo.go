package turbo

/*
#cgo pkg-config: libturbojpeg
#include <stdlib.h>
#include <turbojpeg.h>
*/
import "C"

import (
	"errors"
	"fmt"
	"unsafe"
)

// A Layout is how a pixel's bytes lie.
type Layout int

// The layouts.
const (
	BGR  Layout = C.TJPF_BGR  // three bytes: blue, green, red
	RGBA Layout = C.TJPF_RGBA // four bytes, the last not looked at
	CMYK Layout = C.TJPF_CMYK // four bytes, as the file has them
)

// bytes is how many bytes a pixel has.
func (l Layout) bytes() int {
	if l == BGR {
		return 3
	}
	return 4
}

// Decode decodes a JPEG whose header tells w by h px at one nth of that size along each side, n 1, 2,
// 4 or 8, rounded up, to pixels one after another, row by row. damage says what is wrong inside of a
// file of which the rest could be decoded all the same; it is empty for a sound one.
//
// It returns an error for a file that cannot be decoded, or not to that layout: CMYK goes with files
// of four colours only, the others with all the rest.
func Decode(data []byte, w, h, n int, to Layout) (pix []byte, damage string, err error) {
	if len(data) == 0 || w < 1 || h < 1 {
		return nil, "", errors.New("there is no picture to decode")
	}
	d := C.tjInitDecompress()
	if d == nil {
		return nil, "", errors.New("no decoder")
	}
	defer C.tjDestroy(d)
	w, h = (w+n-1)/n, (h+n-1)/n
	pix = make([]byte, w*h*to.bytes())
	code := C.tjDecompress2(
		d, (*C.uchar)(unsafe.Pointer(&data[0])), C.ulong(len(data)), (*C.uchar)(unsafe.Pointer(&pix[0])), C.int(w),
		C.int(w*to.bytes()), C.int(h), C.int(to), 0,
	)
	if code == 0 {
		return pix, "", nil
	}
	said := C.GoString(C.tjGetErrorStr2(d))
	if C.tjGetErrorCode(d) == C.TJERR_WARNING {
		return pix, said, nil
	}
	return nil, "", errors.New(said)
}

// Encode encodes w by h px, row by row, stride bytes from one row to the next, with colour at half the
// resolution (4:2:0), at a quality from 1 to 100. It returns an error for pixels that are too few.
func Encode(pix []byte, w, h, stride int, from Layout, quality int) ([]byte, error) {
	if w < 1 || h < 1 || stride < w*from.bytes() || len(pix) < (h-1)*stride+w*from.bytes() {
		return nil, fmt.Errorf("%d bytes are not %d by %d px", len(pix), w, h)
	}
	e := C.tjInitCompress()
	if e == nil {
		return nil, errors.New("no encoder")
	}
	defer C.tjDestroy(e)
	var out *C.uchar
	var size C.ulong
	code := C.tjCompress2(
		e, (*C.uchar)(unsafe.Pointer(&pix[0])), C.int(w), C.int(stride), C.int(h), C.int(from), &out, &size, C.TJSAMP_420,
		C.int(quality), C.TJFLAG_ACCURATEDCT,
	)
	defer C.tjFree(out)
	if code != 0 {
		return nil, errors.New(C.GoString(C.tjGetErrorStr2(e)))
	}
	return C.GoBytes(unsafe.Pointer(out), C.int(size)), nil
}
