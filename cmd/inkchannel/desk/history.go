package desk

import "inkchannel/pipeline/stage"

// A history is the settings that were, to undo and redo.
type history struct {
	before, after []stage.Settings
	dragged       string // the flag whose slider moved last, nothing since
}

// add notes the settings that are about to change. A slider's values, of the flag
// dragged, are undone together.
func (h *history) add(now stage.Settings, dragged string) {
	if dragged == "" || h.dragged != dragged {
		h.before = append(h.before, now)
	}
	h.after, h.dragged = nil, dragged
}

// undo returns the settings before the last change, and whether there are such.
func (h *history) undo(now stage.Settings) (stage.Settings, bool) {
	h.dragged = ""
	return shift(&h.before, &h.after, now)
}

// redo returns the settings that the last undo left, and whether there are such.
func (h *history) redo(now stage.Settings) (stage.Settings, bool) {
	h.dragged = ""
	return shift(&h.after, &h.before, now)
}

// shift takes the last settings of one list and puts those of now on the other.
func shift(from, to *[]stage.Settings, now stage.Settings) (stage.Settings, bool) {
	n := len(*from)
	if n == 0 {
		return now, false
	}
	next := (*from)[n-1]
	*from, *to = (*from)[:n-1], append(*to, now)
	return next, true
}
