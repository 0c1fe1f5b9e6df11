//! Painting: the canvas into its texture, the panels around it, both onto the display.

use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::epaint::ClippedShape;
use egui::{ClippedPrimitive, Pos2, Rect, Shape, TextureId, TexturesDelta, vec2};
use egui_wgpu::{Renderer, RendererOptions, ScreenDescriptor};
use image::RgbImage;
use winit::window::Window;

use super::WindowError;
use super::blit::Blit;
use super::canvas_texture::CanvasTexture;
use super::capture::capture;
use super::dirty::{BANDS, Dirty, changed};
use super::scaler::Scaler;
use super::surface::{DisplaySurface, Presented, SURFACE};
use crate::panels::{PictureFit, ScreenImage, ScreenPixels};
use crate::session::Canvas;

/// Owns the surface, the screen's buffer and the panels' renderer.
pub(super) struct Painter {
    surface: DisplaySurface,
    renderer: Renderer,
    screen: TextureId,
    canvas: CanvasTexture,
    smooth: bool,
    panels: Option<PanelCache>,
    blit: Blit,
    canvas_source: wgpu::BindGroup,
    /// What brings the canvas to the display's size, where frames are copied together.
    scaler: Option<Scaler>,
}

/// The panels as last painted, cached so that a frame of the board alone can be
/// painted over them: laying out and filling every panel costs several times
/// what a frame does.
///
/// New ones are painted a band at a time, one with every frame of the board: a
/// software driver takes longer over all of them than a frame may last.
struct PanelCache {
    texture: wgpu::Texture,
    source: wgpu::BindGroup,
    fresh: bool,
    /// What they are painted of, and what of it is still to come.
    painting: Option<Rc<Painted>>,
    dirty: Dirty,
    /// Band painted last.
    band: usize,
    /// When bands were last painted.
    last: Instant,
}

/// Time in which new panels are painted whole, where frames come more seldom than a band each would take.
const WHOLE_WITHIN: Duration = Duration::from_millis(240);

/// Panels laid out and cut into triangles.
pub(super) struct Painted {
    pub jobs: Vec<ClippedPrimitive>,
    /// What they were cut from.
    pub shapes: Vec<ClippedShape>,
    pub textures: TexturesDelta,
    pub pixels_per_point: f32,
}

impl Painter {
    /// Finds a driver for the window.
    pub fn new(window: &Arc<Window>) -> Result<Self, WindowError> {
        let size = window.inner_size();
        let size = (size.width.max(1), size.height.max(1));
        // The display's own interface first; OpenGL ES where that is all there is.
        let first = DisplaySurface::new(window, size, wgpu::Backends::PRIMARY);
        let surface = first.or_else(|_| DisplaySurface::new(window, size, wgpu::Backends::GL))?;
        let device = &surface.device;
        let mut renderer = Renderer::new(device, SURFACE, RendererOptions { dithering: false, ..Default::default() });
        let canvas = CanvasTexture::new(device, (1, 1));
        let view = canvas.texture.create_view(&wgpu::TextureViewDescriptor::default());
        let screen = renderer.register_native_texture(device, &view, wgpu::FilterMode::Nearest);
        let blit = Blit::new(device);
        let canvas_source = blit.source(device, &canvas.texture, wgpu::FilterMode::Nearest);
        Ok(Self { surface, renderer, screen, canvas, smooth: false, panels: None, blit, canvas_source, scaler: None })
    }

    /// Greatest side of a texture, in pixels.
    pub fn most_side(&self) -> usize {
        self.surface.max_side() as usize
    }

    /// Sets the surface up for a window of some size in pixels.
    pub fn resize(&mut self, width: u32, height: u32) {
        self.surface.resize((width, height));
        self.panels = None;
    }

    /// Takes the canvas into its texture.
    pub fn take_canvas(&mut self, pixels: ScreenPixels, fit: PictureFit) {
        let (width, height) = (pixels.width, pixels.height);
        let smooth = fit == PictureFit::Shape;
        if (width, height) != self.canvas.size() || smooth != self.smooth {
            let device = &self.surface.device;
            self.canvas = CanvasTexture::new(device, (width, height));
            let filter = if smooth { wgpu::FilterMode::Linear } else { wgpu::FilterMode::Nearest };
            let view = self.canvas.texture.create_view(&wgpu::TextureViewDescriptor::default());
            self.renderer.update_egui_texture_from_wgpu_texture(device, &view, filter, self.screen);
            self.canvas_source = self.blit.source(device, &self.canvas.texture, filter);
            self.smooth = smooth;
        }
        self.canvas.write(&self.surface.queue, pixels.rgba);
    }

    /// The texture that shows the canvas.
    pub fn screen(&self) -> ScreenImage {
        ScreenImage { texture: self.screen }
    }

    /// Brings panels and canvas onto the display.
    pub fn paint(&mut self, painted: &Painted) -> Result<Presented, WindowError> {
        self.take_textures(painted);
        self.forget_panels();
        let shown = self.present(painted);
        self.free_textures(painted);
        shown
    }

    /// Paints the panels aside, for [`paint_over`](Self::paint_over): at once,
    /// or where older ones are there to be seen meanwhile, band by band.
    pub fn cache_panels(&mut self, painted: &Rc<Painted>) {
        self.take_textures(painted);
        let mut panels = self.panels.take().unwrap_or_else(|| self.new_cache());
        let (width, height) = self.surface.size();
        let size = vec2(width as f32, height as f32) / painted.pixels_per_point;
        let before = panels.painting.take();
        match before.filter(|before| panels.fresh && before.pixels_per_point == painted.pixels_per_point) {
            Some(before) => {
                panels.dirty.join(&changed(&before.shapes, &painted.shapes, &painted.textures, size));
            }
            None => panels.dirty = Dirty::ALL,
        }
        panels.painting = Some(Rc::clone(painted));
        let at_once = if panels.fresh { 0 } else { panels.dirty.bands() };
        panels.fresh = true;
        self.panels = Some(panels);
        // What was shown before is not painted any more.
        self.free_textures(painted);
        (0..at_once).for_each(|_| self.paint_band());
    }

    /// Paints what is still to come of the panels.
    pub fn finish_panels(&mut self) {
        while self.is_painting_panels() {
            self.paint_band();
        }
    }

    /// Lets go of cached panels: all is painted anew.
    fn forget_panels(&mut self) {
        if let Some(panels) = &mut self.panels {
            (panels.painting, panels.fresh) = (None, false);
        }
    }

    /// Whether cached panels are still being painted.
    pub fn is_painting_panels(&self) -> bool {
        self.panels.as_ref().is_some_and(|panels| !panels.dirty.is_nothing())
    }

    /// Bands to be painted with this frame: one, or more where frames are far apart.
    fn bands_due(&mut self) -> usize {
        let Some(panels) = &mut self.panels else {
            return 0;
        };
        let passed = panels.last.elapsed().as_secs_f64();
        panels.last = Instant::now();
        let due = (passed / WHOLE_WITHIN.as_secs_f64() * BANDS as f64).round();
        (due as usize).clamp(1, BANDS)
    }

    /// Paints the next band of the panels that are coming.
    fn paint_band(&mut self) {
        let Some(panels) = &mut self.panels else {
            return;
        };
        let Some(painted) = panels.painting.clone() else {
            return;
        };
        let (width, height) = self.surface.size();
        let size = vec2(width as f32, height as f32) / painted.pixels_per_point;
        let Some((at, band)) = panels.dirty.take_band(panels.band + 1, size) else {
            return;
        };
        panels.band = at;
        let inside = |job: &ClippedPrimitive| {
            let clip_rect = job.clip_rect.intersect(band);
            clip_rect.is_positive().then(|| ClippedPrimitive { clip_rect, primitive: job.primitive.clone() })
        };
        let jobs: Vec<ClippedPrimitive> = painted.jobs.iter().filter_map(inside).collect();
        let descriptor =
            ScreenDescriptor { size_in_pixels: self.surface.size().into(), pixels_per_point: painted.pixels_per_point };
        let (device, queue) = (&self.surface.device, &self.surface.queue);
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let more = self.renderer.update_buffers(device, queue, &mut encoder, &jobs, &descriptor);
        queue.submit(more);
        let view = panels.texture.create_view(&wgpu::TextureViewDescriptor::default());
        // The panels fill every point of the window, so nothing has to be cleared.
        self.renderer.render(&mut begin(&mut encoder, &view, wgpu::LoadOp::Load), &jobs, &descriptor);
        queue.submit([encoder.finish()]);
    }

    /// Whether cached panels are still up to date.
    pub fn has_panels(&self) -> bool {
        self.panels.as_ref().is_some_and(|panels| panels.fresh)
    }

    /// Whether [`paint_over`](Self::paint_over) takes the canvas from its texture: else it needs none.
    pub fn needs_canvas_texture(&self) -> bool {
        !self.surface.copies()
    }

    /// Brings the cached panels onto the display, the canvas at `place` (in
    /// points), and its marks over it.
    pub fn paint_over(
        &mut self,
        ctx: &egui::Context,
        canvas: &Canvas,
        place: Rect,
        marks: Vec<Shape>,
    ) -> Result<Presented, WindowError> {
        (0..self.bands_due()).for_each(|_| self.paint_band());
        let Some(panels) = self.panels.as_ref().filter(|panels| panels.fresh) else {
            return Ok(Presented::Skipped);
        };
        let pixels_per_point = ctx.pixels_per_point();
        let size = self.surface.size();
        let everywhere = Rect::from_min_size(Pos2::ZERO, vec2(size.0 as f32, size.1 as f32));
        // Nothing of it where the window is smaller than when the panels were laid out.
        let area = Some((place * pixels_per_point).intersect(everywhere)).filter(|area| area.is_positive());
        let area = area.map(|area| [area.left(), area.top(), area.width(), area.height()]);
        let clipped = |shape| ClippedShape { clip_rect: place, shape };
        let jobs = ctx.tessellate(marks.into_iter().map(clipped).collect(), pixels_per_point);
        let descriptor = ScreenDescriptor { size_in_pixels: size.into(), pixels_per_point };
        let (renderer, blit) = (&mut self.renderer, &self.blit);
        let (device, queue) = (&self.surface.device, &self.surface.queue);
        if self.surface.copies() {
            if let Some(area) = area {
                let place = place * pixels_per_point;
                let place = [place.left(), place.top(), place.width(), place.height()];
                let scaler = self.scaler.take().filter(|scaler| scaler.is_for((canvas.width, canvas.height), place));
                let mut scaler = scaler.unwrap_or_else(|| Scaler::new((canvas.width, canvas.height), place));
                write_part(queue, &panels.texture, &mut scaler, canvas, area);
                self.scaler = Some(scaler);
            }
            return self.surface.present(|encoder, texture, view| {
                encoder.copy_texture_to_texture(
                    panels.texture.as_image_copy(),
                    texture.as_image_copy(),
                    wgpu::Extent3d { width: size.0, height: size.1, depth_or_array_layers: 1 },
                );
                if !jobs.is_empty() {
                    let more = renderer.update_buffers(device, queue, encoder, &jobs, &descriptor);
                    queue.submit(more);
                    renderer.render(&mut begin(encoder, view, wgpu::LoadOp::Load), &jobs, &descriptor);
                }
            });
        }
        let (source, canvas) = (&panels.source, &self.canvas_source);
        self.surface.present(|encoder, _, view| {
            let more = renderer.update_buffers(device, queue, encoder, &jobs, &descriptor);
            queue.submit(more);
            let mut pass = begin(encoder, view, wgpu::LoadOp::Clear(wgpu::Color::BLACK));
            blit.around(&mut pass, source, size, area.unwrap_or_default());
            if let Some(area) = area {
                blit.stretch(&mut pass, canvas, area);
            }
            if !jobs.is_empty() {
                renderer.render(&mut pass, &jobs, &descriptor);
            }
        })
    }

    fn new_cache(&self) -> PanelCache {
        let (width, height) = self.surface.size();
        let device = &self.surface.device;
        let texture = device.create_texture(&wgpu::TextureDescriptor {
            label: Some("cached panels"),
            size: wgpu::Extent3d { width, height, depth_or_array_layers: 1 },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: SURFACE,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT
                | wgpu::TextureUsages::TEXTURE_BINDING
                | wgpu::TextureUsages::COPY_SRC
                | wgpu::TextureUsages::COPY_DST,
            view_formats: &[],
        });
        let source = self.blit.source(device, &texture, wgpu::FilterMode::Nearest);
        PanelCache { texture, source, fresh: false, painting: None, dirty: Dirty::ALL, band: 0, last: Instant::now() }
    }

    fn present(&mut self, painted: &Painted) -> Result<Presented, WindowError> {
        let descriptor = self.descriptor(painted);
        let (renderer, jobs) = (&mut self.renderer, &painted.jobs);
        let (device, queue) = (&self.surface.device, &self.surface.queue);
        self.surface.present(|encoder, _, view| {
            let more = renderer.update_buffers(device, queue, encoder, jobs, &descriptor);
            queue.submit(more);
            draw(renderer, encoder, view, jobs, &descriptor);
        })
    }

    /// The window as it was last painted, from `painted` once more.
    pub fn capture(&mut self, painted: &Painted) -> Result<RgbImage, WindowError> {
        let descriptor = self.descriptor(painted);
        // What was painted over cached panels since took the buffers' place.
        let (device, queue) = (&self.surface.device, &self.surface.queue);
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let more = self.renderer.update_buffers(device, queue, &mut encoder, &painted.jobs, &descriptor);
        queue.submit(more.into_iter().chain([encoder.finish()]));
        let renderer = &self.renderer;
        capture(device, queue, self.surface.size(), |encoder, view| {
            draw(renderer, encoder, view, &painted.jobs, &descriptor)
        })
    }

    fn descriptor(&self, painted: &Painted) -> ScreenDescriptor {
        ScreenDescriptor { size_in_pixels: self.surface.size().into(), pixels_per_point: painted.pixels_per_point }
    }

    fn take_textures(&mut self, painted: &Painted) {
        for (id, delta) in &painted.textures.set {
            self.renderer.update_texture(&self.surface.device, &self.surface.queue, *id, delta);
        }
    }

    fn free_textures(&mut self, painted: &Painted) {
        painted.textures.free.iter().for_each(|id| self.renderer.free_texture(id));
    }
}

/// Writes the canvas into its part of the cached panels; nothing where the part does not lie in them whole.
fn write_part(queue: &wgpu::Queue, panels: &wgpu::Texture, scaler: &mut Scaler, canvas: &Canvas, area: [f32; 4]) {
    let ((x, y), (width, height)) = (scaler.corner(), scaler.made());
    let fits = x + width <= panels.width() && y + height <= panels.height() && area[2] > 0.0;
    let bytes = scaler.scale(canvas);
    if !fits || bytes.is_empty() {
        return;
    }
    let layout =
        wgpu::TexelCopyBufferLayout { offset: 0, bytes_per_row: Some(width * 4), rows_per_image: Some(height) };
    let origin = wgpu::Origin3d { x, y, z: 0 };
    let part = wgpu::TexelCopyTextureInfo { origin, ..panels.as_image_copy() };
    queue.write_texture(part, bytes, layout, wgpu::Extent3d { width, height, depth_or_array_layers: 1 });
}

/// One pass that draws the panels on a cleared ground.
fn draw(
    renderer: &Renderer,
    encoder: &mut wgpu::CommandEncoder,
    view: &wgpu::TextureView,
    jobs: &[ClippedPrimitive],
    descriptor: &ScreenDescriptor,
) {
    let ground = wgpu::LoadOp::Clear(wgpu::Color::BLACK);
    renderer.render(&mut begin(encoder, view, ground), jobs, descriptor);
}

/// A pass over what is there, or over a cleared ground.
fn begin(
    encoder: &mut wgpu::CommandEncoder,
    view: &wgpu::TextureView,
    load: wgpu::LoadOp<wgpu::Color>,
) -> wgpu::RenderPass<'static> {
    let attachment = wgpu::RenderPassColorAttachment {
        view,
        depth_slice: None,
        resolve_target: None,
        ops: wgpu::Operations { load, store: wgpu::StoreOp::Store },
    };
    let descriptor = wgpu::RenderPassDescriptor {
        label: Some("panels"),
        color_attachments: &[Some(attachment)],
        ..Default::default()
    };
    encoder.begin_render_pass(&descriptor).forget_lifetime()
}
