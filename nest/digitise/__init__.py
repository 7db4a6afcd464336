"""From photographs and scans to drawings: marks, camera, outline, strokes of chalk, templates."""
