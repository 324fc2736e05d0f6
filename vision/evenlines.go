package vision

// EvenLines is how many straight lines evenly apart run across much of the sheet among lines one pixel wide:
// rules that were not told from ink, or what is drawn. It is 0 for fewer than rulingLeast. It returns an error
// only where OpenCV fails.
func (b *Bitmap) EvenLines() (int, error) {
	k := min(lookSide/float64(max(b.W, b.H)), 1)
	small := NewBitmap(int(float64(b.W)*k)+1, int(float64(b.H)*k)+1)
	for i := range b.all() {
		small.Pix[int(float64(i/b.W)*k)*small.W+int(float64(i%b.W)*k)] = 1
	}
	return small.ruled(rulingLeast)
}
