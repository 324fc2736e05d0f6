// Package picture draws what stages found: marks over a photo or a sheet, bodies in
// space, diagrams, and the sign lit at night. It knows colours and px, not stages.
package picture
