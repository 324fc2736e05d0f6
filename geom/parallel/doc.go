// Package parallel does the same thing to many, on all cores.
package parallel
