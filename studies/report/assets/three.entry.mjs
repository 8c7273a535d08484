// What the viewer uses of three.js. three.bundle.min.js is made of it, in this folder, with three 0.187 and esbuild 0.28:
//   npm install --prefix /tmp/npm three esbuild
//   NODE_PATH=/tmp/npm/node_modules /tmp/npm/node_modules/.bin/esbuild three.entry.mjs --bundle --minify --format=iife \
//     --global-name=THREE --legal-comments=inline --outfile=three.bundle.min.js
// uplot.iife.min.js and uplot.min.css are the files of those names (uPlot.*) of npm's uplot 1.6.32, as they come.
export {
  AmbientLight,
  BufferAttribute,
  BufferGeometry,
  Color,
  Data3DTexture,
  DirectionalLight,
  DoubleSide,
  GLSL3,
  LinearFilter,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshLambertMaterial,
  PerspectiveCamera,
  Plane,
  PlaneGeometry,
  RGFormat,
  Scene,
  ShaderMaterial,
  Vector3,
  WebGLRenderer,
} from "three";
export { OrbitControls } from "three/addons/controls/OrbitControls.js";
