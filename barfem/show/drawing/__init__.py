"""Drawing sheets: laid out once on paper, then written as PDF, SVG and DXF. Alone with show.figures in drawing ink."""
