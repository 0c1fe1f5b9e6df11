//! Copying finished pixels onto the display with next to no work a pixel.
//!
//! The panels' own shader smooths, converts and dithers; a software driver
//! spends tens of nanoseconds a pixel on it. What is already painted is taken
//! over as it is.

use super::surface::SURFACE;

/// One triangle over the whole viewport; `fs_load` takes texels as they lie
/// under the pixels, `fs_sample` stretches the texture over the viewport.
const SHADER: &str = "
struct Corner {
    @builtin(position) position: vec4<f32>,
    @location(0) uv: vec2<f32>,
}

@group(0) @binding(0) var source: texture_2d<f32>;
@group(0) @binding(1) var filtering: sampler;

@vertex
fn vs_main(@builtin(vertex_index) index: u32) -> Corner {
    let uv = vec2<f32>(f32((index << 1u) & 2u), f32(index & 2u));
    return Corner(vec4<f32>(uv.x * 2.0 - 1.0, 1.0 - uv.y * 2.0, 0.0, 1.0), uv);
}

@fragment
fn fs_load(corner: Corner) -> @location(0) vec4<f32> {
    return textureLoad(source, vec2<i32>(corner.position.xy), 0);
}

@fragment
fn fs_sample(corner: Corner) -> @location(0) vec4<f32> {
    return textureSample(source, filtering, corner.uv);
}
";

/// A rectangle of the display in its pixels: left, top, width, height.
pub(super) type DisplayArea = [f32; 4];

/// The two ways of taking a texture over.
pub(super) struct Blit {
    layout: wgpu::BindGroupLayout,
    load: wgpu::RenderPipeline,
    sample: wgpu::RenderPipeline,
}

impl Blit {
    pub fn new(device: &wgpu::Device) -> Self {
        let shader = device.create_shader_module(wgpu::ShaderModuleDescriptor {
            label: Some("blit"),
            source: wgpu::ShaderSource::Wgsl(SHADER.into()),
        });
        let entry = |binding, ty| wgpu::BindGroupLayoutEntry {
            binding,
            visibility: wgpu::ShaderStages::FRAGMENT,
            ty,
            count: None,
        };
        let texture = wgpu::BindingType::Texture {
            sample_type: wgpu::TextureSampleType::Float { filterable: true },
            view_dimension: wgpu::TextureViewDimension::D2,
            multisampled: false,
        };
        let sampler = wgpu::BindingType::Sampler(wgpu::SamplerBindingType::Filtering);
        let layout = device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
            label: Some("blit"),
            entries: &[entry(0, texture), entry(1, sampler)],
        });
        let pipelines = device.create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
            label: Some("blit"),
            bind_group_layouts: &[Some(&layout)],
            ..Default::default()
        });
        let pipeline = |entry_point| {
            device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
                label: Some(entry_point),
                layout: Some(&pipelines),
                vertex: wgpu::VertexState {
                    module: &shader,
                    entry_point: Some("vs_main"),
                    compilation_options: Default::default(),
                    buffers: &[],
                },
                fragment: Some(wgpu::FragmentState {
                    module: &shader,
                    entry_point: Some(entry_point),
                    compilation_options: Default::default(),
                    targets: &[Some(SURFACE.into())],
                }),
                primitive: Default::default(),
                depth_stencil: None,
                multisample: Default::default(),
                multiview_mask: None,
                cache: None,
            })
        };
        let (load, sample) = (pipeline("fs_load"), pipeline("fs_sample"));
        Self { layout, load, sample }
    }

    /// What a pass needs to read a texture.
    pub fn source(&self, device: &wgpu::Device, texture: &wgpu::Texture, filter: wgpu::FilterMode) -> wgpu::BindGroup {
        let sampler = device.create_sampler(&wgpu::SamplerDescriptor {
            mag_filter: filter,
            min_filter: filter,
            ..Default::default()
        });
        let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
        device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("blit"),
            layout: &self.layout,
            entries: &[
                wgpu::BindGroupEntry { binding: 0, resource: wgpu::BindingResource::TextureView(&view) },
                wgpu::BindGroupEntry { binding: 1, resource: wgpu::BindingResource::Sampler(&sampler) },
            ],
        })
    }

    /// Takes a texture of the display's size over, but for a hole in it.
    pub fn around(&self, pass: &mut wgpu::RenderPass, source: &wgpu::BindGroup, size: (u32, u32), hole: DisplayArea) {
        pass.set_pipeline(&self.load);
        pass.set_bind_group(0, source, &[]);
        let [left, top, width, height] = hole;
        let clamp = |at: f32, most: u32| (at.max(0.0) as u32).min(most);
        // Whole pixels that the hole covers: those it covers in part are taken over.
        let (from_x, from_y) = (clamp(left.ceil(), size.0), clamp(top.ceil(), size.1));
        let (to_x, to_y) = (clamp(left + width, size.0).max(from_x), clamp(top + height, size.1).max(from_y));
        let around = [
            [0, 0, size.0, from_y],
            [0, to_y, size.0, size.1 - to_y],
            [0, from_y, from_x, to_y - from_y],
            [to_x, from_y, size.0 - to_x, to_y - from_y],
        ];
        for [x, y, width, height] in around.into_iter().filter(|area| area[2] > 0 && area[3] > 0) {
            pass.set_scissor_rect(x, y, width, height);
            pass.draw(0..3, 0..1);
        }
        pass.set_scissor_rect(0, 0, size.0, size.1);
    }

    /// Stretches a texture over an area, which has to lie on the display.
    pub fn stretch(&self, pass: &mut wgpu::RenderPass, source: &wgpu::BindGroup, area: DisplayArea) {
        pass.set_pipeline(&self.sample);
        pass.set_bind_group(0, source, &[]);
        pass.set_viewport(area[0], area[1], area[2], area[3], 0.0, 1.0);
        pass.draw(0..3, 0..1);
    }
}
