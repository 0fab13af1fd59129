//! A renderer of egui's meshes on the CPU: textured triangles, premultiplied blending in the
//! encoded colour space, as egui's own OpenGL painter does it.

use std::collections::HashMap;
use std::fs::File;
use std::io::BufWriter;
use std::path::Path;

use egui::epaint::{ClippedPrimitive, Mesh, Primitive, Vertex};
use egui::{Color32, ColorImage, ImageData, Pos2, TextureId, TexturesDelta, Vec2};

/// Every texture in use.
#[derive(Default)]
pub struct Textures(HashMap<TextureId, ColorImage>);

impl Textures {
    /// Takes over the changes of a frame, and leaves none.
    pub fn apply(&mut self, delta: &mut TexturesDelta) {
        for (id, patches) in std::mem::take(&mut delta.set) {
            for patch in patches {
                let ImageData::Color(image) = &patch.image;
                match patch.pos {
                    None => {
                        self.0.insert(id, (**image).clone());
                    }
                    Some([left, top]) => {
                        let whole = self.0.get_mut(&id).expect("a patch of a known texture");
                        for (y, row) in image.pixels.chunks(image.width()).enumerate() {
                            let from = (top + y) * whole.width() + left;
                            whole.pixels[from..from + row.len()].copy_from_slice(row);
                        }
                    }
                }
            }
        }
        for id in std::mem::take(&mut delta.free) {
            self.0.remove(&id);
        }
    }
}

/// Premultiplied pixels, row by row from the top.
pub struct Picture {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<Color32>,
}

impl Picture {
    /// Number of pixels of exactly this colour.
    pub fn count(&self, color: Color32) -> usize {
        self.pixels.iter().filter(|pixel| **pixel == color).count()
    }

    /// Number of different colours.
    pub fn colors(&self) -> usize {
        self.pixels.iter().collect::<std::collections::HashSet<_>>().len()
    }

    /// Share of the pixels that differ from those of a picture of the same size, 0 to 1.
    pub fn differs(&self, other: &Self) -> f64 {
        assert_eq!((self.width, self.height), (other.width, other.height));
        let differ = self.pixels.iter().zip(&other.pixels).filter(|(a, b)| a != b).count();
        differ as f64 / self.pixels.len() as f64
    }

    /// Writes a PNG.
    pub fn save(&self, path: &Path) {
        let file = BufWriter::new(File::create(path).expect("a new picture"));
        let mut encoder = png::Encoder::new(file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgba);
        let bytes: Vec<u8> = self.pixels.iter().flat_map(|p| [p.r(), p.g(), p.b(), 255]).collect();
        let mut writer = encoder.write_header().expect("a header");
        writer.write_image_data(&bytes).expect("pixels");
    }
}

/// Draws `parts` in a window of `size` physical pixels.
pub fn draw(parts: &[ClippedPrimitive], textures: &Textures, size: Vec2, scale: f32) -> Picture {
    let (width, height) = (size.x.round() as usize, size.y.round() as usize);
    let mut picture = Picture { width, height, pixels: vec![Color32::BLACK; width * height] };
    for part in parts {
        let Primitive::Mesh(mesh) = &part.primitive else { continue };
        let texture = &textures.0[&mesh.texture_id];
        let low = part.clip_rect.min.to_vec2() * scale;
        let high = part.clip_rect.max.to_vec2() * scale;
        let clip = [
            low.x.round().max(0.0) as usize,
            low.y.round().max(0.0) as usize,
            (high.x.round().max(0.0) as usize).min(width),
            (high.y.round().max(0.0) as usize).min(height),
        ];
        triangles(&mut picture, mesh, texture, clip, scale);
    }
    picture
}

fn triangles(
    picture: &mut Picture,
    mesh: &Mesh,
    texture: &ColorImage,
    clip: [usize; 4],
    scale: f32,
) {
    for corner in mesh.indices.chunks_exact(3) {
        let mut v = [0, 1, 2].map(|i| mesh.vertices[corner[i] as usize]);
        for vertex in &mut v {
            vertex.pos = (vertex.pos.to_vec2() * scale).to_pos2();
        }
        if edge(v[0].pos, v[1].pos, v[2].pos) < 0.0 {
            v.swap(1, 2);
        }
        triangle(picture, &v, texture, clip);
    }
}

/// Twice the area of the triangle, positive when clockwise on the screen.
fn edge(a: Pos2, b: Pos2, c: Pos2) -> f64 {
    let d = |p: f32, q: f32| f64::from(p) - f64::from(q);
    d(b.x, a.x) * d(c.y, a.y) - d(b.y, a.y) * d(c.x, a.x)
}

fn triangle(picture: &mut Picture, v: &[Vertex; 3], texture: &ColorImage, clip: [usize; 4]) {
    let area = edge(v[0].pos, v[1].pos, v[2].pos);
    if area <= 0.0 {
        return;
    }
    // A pixel on an edge that two triangles share belongs to one of them: top or left edges.
    let owns = [(1, 2), (2, 0), (0, 1)].map(|(a, b)| {
        let (p, q) = (v[a].pos, v[b].pos);
        q.y < p.y || (q.y == p.y && q.x > p.x)
    });
    let xs = v.map(|vertex| vertex.pos.x);
    let ys = v.map(|vertex| vertex.pos.y);
    let least =
        |of: [f32; 3]| of.into_iter().fold(f32::INFINITY, f32::min).floor().max(0.0) as usize;
    let most = |of: [f32; 3]| of.into_iter().fold(0.0, f32::max).ceil() as usize;
    for y in least(ys).max(clip[1])..most(ys).min(clip[3]) {
        for x in least(xs).max(clip[0])..most(xs).min(clip[2]) {
            let p = Pos2::new(x as f32 + 0.5, y as f32 + 0.5);
            let w = [
                edge(v[1].pos, v[2].pos, p),
                edge(v[2].pos, v[0].pos, p),
                edge(v[0].pos, v[1].pos, p),
            ];
            if w.iter().zip(owns).any(|(w, owned)| *w < 0.0 || (*w == 0.0 && !owned)) {
                continue;
            }
            let w = w.map(|w| (w / area) as f32);
            let mix =
                |f: &dyn Fn(&Vertex) -> f32| w[0] * f(&v[0]) + w[1] * f(&v[1]) + w[2] * f(&v[2]);
            let texel = sample(texture, mix(&|v| v.uv.x), mix(&|v| v.uv.y));
            let source: [f32; 4] =
                std::array::from_fn(|i| mix(&|v| f32::from(v.color[i])) * texel[i] / 255.0);
            let pixel = &mut picture.pixels[y * picture.width + x];
            let keep = 1.0 - source[3] / 255.0;
            let blend = |i: usize| (source[i] + f32::from(pixel[i]) * keep).round() as u8;
            *pixel = Color32::from_rgba_premultiplied(blend(0), blend(1), blend(2), 255);
        }
    }
}

/// The texture between its four nearest texels.
fn sample(texture: &ColorImage, u: f32, v: f32) -> [f32; 4] {
    let [width, height] = texture.size;
    let (x, y) = (u * width as f32 - 0.5, v * height as f32 - 0.5);
    let (fx, fy) = (x - x.floor(), y - y.floor());
    let at = |dx: f32, dy: f32| {
        let px = (x.floor() + dx).clamp(0.0, width as f32 - 1.0) as usize;
        let py = (y.floor() + dy).clamp(0.0, height as f32 - 1.0) as usize;
        texture.pixels[py * width + px].to_array().map(f32::from)
    };
    let (a, b, c, d) = (at(0.0, 0.0), at(1.0, 0.0), at(0.0, 1.0), at(1.0, 1.0));
    std::array::from_fn(|i| {
        (a[i] * (1.0 - fx) + b[i] * fx) * (1.0 - fy) + (c[i] * (1.0 - fx) + d[i] * fx) * fy
    })
}
