"use strict";
// Drawing: meshes unpacked from the page, one small shader for faces and one for edges.

const FACE_VS = `#version 300 es
uniform mat4 uView, uLens; uniform mat4x3 uMove; uniform vec3 uLow, uSize; uniform float uFlip;
in vec3 aAt; in vec3 aOut; out vec3 vOut, vAt;
void main() {
  vec4 p = uView * vec4(uMove * vec4(uLow + aAt * uSize, 1.0), 1.0);
  vOut = mat3(uView) * (mat3(uMove) * aOut);
  vAt = p.xyz;
  gl_Position = uLens * p;
}`;
const FACE_FS = `#version 300 es
precision highp float;
uniform vec3 uColor, uPick; uniform float uMetal, uLit; uniform int uPass;
in vec3 vOut, vAt; out vec4 oColor;
float soft(float t) { t = clamp(t, 0.0, 1.0); return t * t * (3.0 - 2.0 * t); }
void main() {
  if (uPass == 1) { oColor = vec4(uPick, 1.0); return; }
  vec3 n = normalize(vOut), v = normalize(-vAt), lamp = normalize(vec3(-0.42, 0.62, 0.66));
  float facing = max(dot(n, lamp), 0.0), sky = 0.5 + 0.5 * n.y, room = 0.5 + 0.5 * n.z;
  float light = 0.54 * facing + 0.20 * sky + 0.34 * room;
  float shine = pow(max(dot(n, normalize(lamp + v)), 0.0), 32.0);
  vec3 color = uColor * light * 1.06 + 0.07 * shine;
  if (uMetal > 0.5) {
    vec3 r = reflect(-v, n);
    float studio = 0.36 + 0.68 * soft((r.y + 0.2) / 1.1) + 0.22 * soft((r.y - 0.05) / 0.15) * soft((0.6 - r.y) / 0.3);
    color = uColor * (0.42 * light + 0.66 * studio) + 0.15 * shine;
  }
  color = mix(color, vec3(0.25, 0.52, 1.0), 0.42 * uLit);
  oColor = vec4(pow(clamp(color, 0.0, 1.0), vec3(1.0 / 2.2)), 1.0);
}`;
const EDGE_VS = `#version 300 es
uniform mat4 uView, uLens; uniform mat4x3 uMove; uniform vec3 uLow, uSize;
in vec3 aAt;
void main() {
  vec4 p = uView * vec4(uMove * vec4(uLow + aAt * uSize, 1.0), 1.0);
  gl_Position = uLens * vec4(p.xyz * 0.9995, 1.0);
}`;
const EDGE_FS = `#version 300 es
precision mediump float;
uniform vec4 uInk; out vec4 oColor;
void main() { oColor = vec4(uInk.rgb * uInk.a, uInk.a); }`;

function bytesOf(text) {
  const raw = atob(text), out = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) out[i] = raw.charCodeAt(i);
  return out;
}

function linear(hex) {
  return [1, 3, 5].map((k) => Math.pow(parseInt(hex.slice(k, k + 2), 16) / 255, 2.2));
}

function plain(hex) {
  return [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255);
}

class Drawing {
  constructor(canvas, pieces) {
    const gl = canvas.getContext("webgl2", { antialias: true, alpha: true, preserveDrawingBuffer: true });
    if (!gl) throw new Error("no WebGL");
    this.gl = gl;
    this.canvas = canvas;
    this.faces = this.program(FACE_VS, FACE_FS);
    this.edges = this.program(EDGE_VS, EDGE_FS);
    this.pieces = pieces.map((piece) => this.load(piece));
    this.picked = null;
  }

  program(vertex, fragment) {
    const gl = this.gl, made = gl.createProgram(), places = {};
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
      gl.attachShader(made, shader);
    }
    gl.bindAttribLocation(made, 0, "aAt");
    gl.bindAttribLocation(made, 1, "aOut");
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
    const count = gl.getProgramParameter(made, gl.ACTIVE_UNIFORMS);
    for (let i = 0; i < count; i += 1) {
      const name = gl.getActiveUniform(made, i).name;
      places[name] = gl.getUniformLocation(made, name);
    }
    return { made, places };
  }

  load(piece) {
    const gl = this.gl, data = bytesOf(piece.data), [corners, sides, wide, ends] = piece.counts;
    const cut = { corners: corners * 8, outs: corners * 4, rows: sides * 3 * (wide ? 4 : 2), ends: ends * 8 };
    let start = 0;
    const part = (size) => { const found = data.subarray(start, start + size); start += size; return found; };
    const buffer = (kind, bytes) => {
      const made = gl.createBuffer();
      gl.bindBuffer(kind, made);
      gl.bufferData(kind, bytes, gl.STATIC_DRAW);
      return made;
    };
    const solid = gl.createVertexArray();
    gl.bindVertexArray(solid);
    buffer(gl.ARRAY_BUFFER, part(cut.corners));
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, gl.UNSIGNED_SHORT, true, 8, 0);
    buffer(gl.ARRAY_BUFFER, part(cut.outs));
    gl.enableVertexAttribArray(1);
    gl.vertexAttribPointer(1, 3, gl.BYTE, true, 4, 0);
    const ended = part(cut.ends);
    buffer(gl.ELEMENT_ARRAY_BUFFER, part(cut.rows));
    const lines = gl.createVertexArray();
    gl.bindVertexArray(lines);
    buffer(gl.ARRAY_BUFFER, ended);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, 3, gl.UNSIGNED_SHORT, true, 8, 0);
    gl.bindVertexArray(null);
    return {
      solid, lines, count: sides * 3, ends, type: wide ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT,
      low: piece.low, size: piece.size, color: linear(piece.color), ink: plain(piece.ink), metal: piece.metal ? 1 : 0,
    };
  }

  // Items: {piece, move (12 numbers, by columns), lit, drawn, asked}.
  draw(view, lens, items) {
    const gl = this.gl;
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    this.solids(view, lens, items.filter((item) => item.drawn), 0);
    const { made, places } = this.edges;
    gl.useProgram(made);
    gl.uniformMatrix4fv(places.uView, false, view);
    gl.uniformMatrix4fv(places.uLens, false, lens);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    for (const item of items) {
      const piece = this.pieces[item.piece];
      if (!item.drawn || !piece.ends) continue;
      gl.uniformMatrix4x3fv(places.uMove, false, item.move);
      gl.uniform3fv(places.uLow, piece.low);
      gl.uniform3fv(places.uSize, piece.size);
      gl.uniform4f(places.uInk, ...piece.ink, 0.6);
      gl.bindVertexArray(piece.lines);
      gl.drawArrays(gl.LINES, 0, piece.ends);
    }
    gl.disable(gl.BLEND);
    gl.bindVertexArray(null);
  }

  solids(view, lens, items, pass) {
    const gl = this.gl, { made, places } = this.faces;
    gl.useProgram(made);
    gl.uniformMatrix4fv(places.uView, false, view);
    gl.uniformMatrix4fv(places.uLens, false, lens);
    gl.uniform1i(places.uPass, pass);
    items.forEach((item, number) => {
      const piece = this.pieces[item.piece];
      if (!piece.count) return;
      gl.uniformMatrix4x3fv(places.uMove, false, item.move);
      gl.uniform3fv(places.uLow, piece.low);
      gl.uniform3fv(places.uSize, piece.size);
      gl.uniform3fv(places.uColor, piece.color);
      gl.uniform1f(places.uMetal, piece.metal);
      gl.uniform1f(places.uLit, item.lit ? 1 : 0);
      const name = number + 1;
      gl.uniform3f(places.uPick, (name & 255) / 255, ((name >> 8) & 255) / 255, ((name >> 16) & 255) / 255);
      gl.bindVertexArray(piece.solid);
      gl.drawElements(gl.TRIANGLES, piece.count, piece.type, 0);
    });
    gl.bindVertexArray(null);
  }

  // The item under a place of the canvas, in its own pixels; null for none.
  ask(view, lens, items, x, y) {
    const gl = this.gl, wide = this.canvas.width, high = this.canvas.height;
    if (!this.picked || this.picked.wide !== wide || this.picked.high !== high) {
      if (this.picked) {
        gl.deleteFramebuffer(this.picked.frame);
        this.picked.parts.forEach((part) => gl.deleteRenderbuffer(part));
      }
      const frame = gl.createFramebuffer(), parts = [gl.createRenderbuffer(), gl.createRenderbuffer()];
      gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
      [[gl.RGBA8, gl.COLOR_ATTACHMENT0], [gl.DEPTH_COMPONENT24, gl.DEPTH_ATTACHMENT]].forEach(([kind, place], k) => {
        gl.bindRenderbuffer(gl.RENDERBUFFER, parts[k]);
        gl.renderbufferStorage(gl.RENDERBUFFER, kind, wide, high);
        gl.framebufferRenderbuffer(gl.FRAMEBUFFER, place, gl.RENDERBUFFER, parts[k]);
      });
      this.picked = { frame, parts, wide, high };
    }
    const asked = items.filter((item) => item.asked);
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.picked.frame);
    gl.viewport(0, 0, wide, high);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    this.solids(view, lens, asked, 1);
    const pixel = new Uint8Array(4);
    gl.readPixels(Math.floor(x), high - 1 - Math.floor(y), 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    const name = pixel[0] + 256 * pixel[1] + 65536 * pixel[2];
    return name ? asked[name - 1] : null;
  }
}
