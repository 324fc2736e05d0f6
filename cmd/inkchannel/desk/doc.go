// Package desk is the server of the page on which a run is tuned: one session with
// its undo, on this computer only. The page shows the state that the server tells,
// and asks for changes, nothing else.
package desk
