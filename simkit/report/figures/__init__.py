"""What several pictures of the desk have in common: style, stacked bars, differences, and a week as a Gantt chart."""
