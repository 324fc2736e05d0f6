package pipeline

// A Doubt is where a stage is not sure, and why.
type Doubt struct {
	Stage string
	Sure  float64 // 0 to 1
	Why   string
}

// Unsure is the confidence under which a stage counts as not sure.
const Unsure = 0.5

// Doubts lists the stages that are not sure of what they found.
func (r *Result) Doubts() []Doubt {
	return nil
}
