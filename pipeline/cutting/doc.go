// Package cutting writes a sign's outlines for who cuts acrylic or wood in place of printing: as DXF and
// as SVG, both at true size in mm.
package cutting
